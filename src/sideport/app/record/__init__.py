"""The record's slice: the journal in the database, the tables made from it, and what other slices write and ask."""
