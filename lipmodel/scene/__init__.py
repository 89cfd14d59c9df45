"""What a scene or lesson file may say, one module a table, values still in the file's units."""
