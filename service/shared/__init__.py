"""What the processes that serve must share: jobs, tokens, watches. Each has one protocol and two
homes: a file beside the store, right with several processes of one machine, and PostgreSQL, where
several machines serve.
"""
