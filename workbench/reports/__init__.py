"""An assessment as text, CSV and JSON."""
