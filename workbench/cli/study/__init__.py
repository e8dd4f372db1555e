"""The study command: one file a study."""
