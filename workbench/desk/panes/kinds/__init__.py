"""One file a pane: what it shows and how it is drawn."""
