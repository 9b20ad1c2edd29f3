s|^base = .*|base = "https://kestlow.example"|
s|^zone = .*|zone = "Europe/Dublin"|
