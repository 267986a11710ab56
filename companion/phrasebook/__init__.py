"""Code and values to a sentence in the reader's language: for pages, mail, the command line and script alike."""
