"""The panes: frequency response, pulse, eye, bathtub and impedance of the traces on screen, with common cursors."""
