"""The archive at the desk: by day of the lunation, by feature and its light, a night, a month, what was on air."""
