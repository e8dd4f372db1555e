"""Questions over many assessments."""
