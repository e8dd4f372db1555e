"""Many assessments at once: processes, a cluster, progress and stopping."""
