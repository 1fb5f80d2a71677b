"""A player's records as plain data, to be given away as files and taken in again.

A record is one object with its kind under "record"; configs/records.schema.json says what each
holds.  `shape` checks that, `takes` what no schema can say of a take, `whose` decides to which
player of a book a file belongs, `cells` makes rows for a spreadsheet.
"""
