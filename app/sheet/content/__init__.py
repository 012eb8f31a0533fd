"""What stands on a build sheet: its sections as blocks of words, tables and drawings, without any layout."""
