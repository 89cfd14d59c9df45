"""What a study found, for a notebook: values that can be read, told, drawn and written as JSON."""
