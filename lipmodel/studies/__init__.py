"""One module a question: values in, values out."""
