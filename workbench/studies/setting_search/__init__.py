"""The search for the settings that serve all lanes of a device."""
