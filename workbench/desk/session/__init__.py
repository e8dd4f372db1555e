"""What one window holds: the document, what is looked at, what is computed for it, its settings."""
