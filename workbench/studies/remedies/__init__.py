"""What would make a lane pass: single changes, cheapest class first, then pairs of them."""
