"""Words in (compiled scanner) and words out (writer): RS274 and common desktop-printer practice."""
