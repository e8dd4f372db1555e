"""Makers' models on parts: trust, parameters, and where they belong."""
