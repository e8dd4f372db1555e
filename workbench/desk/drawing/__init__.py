"""The panes and the path without a window: pictures and pages."""
