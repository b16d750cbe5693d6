"""Properties: fitted to a user's tests, estimated from model cards, and the cards made anew."""
