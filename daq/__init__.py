"""From readings to records: settling, verdicts, the logbook, the bench. Imports drivers only."""
