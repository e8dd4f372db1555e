"""The path strip: one lane from transmitter to receiver, to be arranged by hand or by keys."""
