"""Bulk imports: a file of records of one kind, mapped, judged, staged unseen and shown at once.

How "all or nothing" holds: rows are written into the records' own tables in short transactions, under ids of the
import's own block, and `api.storage.hidden` leaves such rows out of every query while the import is hidden. One update
of the import's row shows them all. Rows in a table of their own would have to be copied at the end, in one long
transaction or in pieces that readers see come in; ids that tell the import need neither a second copy nor a further
column or index on millions of records.
"""
