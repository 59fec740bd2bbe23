"""One module a rule: its sentence, source, severity and numbers; `book` lists them in order."""
