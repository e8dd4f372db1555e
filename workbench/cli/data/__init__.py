"""Commands for data from outside: lane lists, measurements, networks, tables of gains."""
