"""The lesson's page, with its scripts."""
