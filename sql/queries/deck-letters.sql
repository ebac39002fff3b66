SELECT kind, label_hash, place FROM deck_letter ORDER BY kind, place
