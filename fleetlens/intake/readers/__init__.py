"""Files of many formats as sheets: columns and rows of text, with what was found on the way."""
