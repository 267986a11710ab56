"""What the product does, one verb a function.

``verb(session, actor, ..., now)``: the first line asks who may, the last line commits. Only here is anything
written. Reading verbs return plain values for two painters: the server's pages now, the phone's script later.
"""
