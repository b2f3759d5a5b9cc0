"""One module a question; each answers from a net read once and its open terrain with one frozen record.

An answer prints nothing, reads no argument and knows no file it will be written to: commands, the notebook
door, pages and papers show the same record.
"""
