"""The window: one document, its views, and a runner that keeps the engine off the GUI thread."""
