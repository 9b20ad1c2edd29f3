s|^base = .*|base = "https://lindau.example"|
s|^zone = .*|zone = "Europe/Berlin"|
s|^organization = .*|organization = { name = "Praxis am See" }|
