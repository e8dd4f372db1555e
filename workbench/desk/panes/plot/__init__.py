"""One plot: axes, what is drawn, and the widget that shows them."""
