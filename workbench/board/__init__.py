"""The document: catalogue, devices, lanes, profiles; reading, writing, checking, editing."""
