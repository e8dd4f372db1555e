"""What makers hand out about their parts: IBIS-AMI models, gain tables, settings in file names."""
