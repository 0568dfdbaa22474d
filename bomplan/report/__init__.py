"""What a person looks at: summary, workbook, and files on disk; all read one plan."""
