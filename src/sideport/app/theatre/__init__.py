"""Theatre: one eye at a time, from the sign-in pause to the signed note; every tap is an entry of the journal."""
