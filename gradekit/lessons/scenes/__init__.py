"""What the explorers of the later chapters show: a picture, a sentence, a table, all computed."""
