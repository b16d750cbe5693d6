"""The inside of the border: from the cells of any table or certificate to a checked batch."""
