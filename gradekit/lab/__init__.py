"""What the doors open: the settings of the servers, and the server of the pages without code."""
