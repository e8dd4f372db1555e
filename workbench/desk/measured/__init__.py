"""The panel of measured data: importing, judging, fitting, exporting."""
