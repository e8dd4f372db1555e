"""What a measured network is made of: packed numbers, causal curves, waves."""
