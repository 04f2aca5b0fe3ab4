"""The command line: options in, tables out, no logic of its own."""
