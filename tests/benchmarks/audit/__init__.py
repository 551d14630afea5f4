"""What an audit costs against a bare scan of the same columns, and what planted faults it finds."""
