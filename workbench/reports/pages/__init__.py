"""What is read on pages: the report, the settings sheet, the manual."""
