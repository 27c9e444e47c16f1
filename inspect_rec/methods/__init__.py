"""The measuring methods: readings to value with its budget; one file a family, one register."""
