"""Between plain dicts (as TOML and JSON give them) and the model, with errors in sentences."""
