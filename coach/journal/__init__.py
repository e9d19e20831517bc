"""Files that must not lie: the journal of a session, the diary, signatures, repair."""
