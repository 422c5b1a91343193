"""SQLite with strict tables, as Django's database engine ``sideport.app.sqlite``."""
