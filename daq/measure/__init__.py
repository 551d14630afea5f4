"""From bytes to a record: one session a gauge, and the station that owns ports and time."""
