s|^base = .*|base = "https://wharfside.example"|
s|^organization = .*|organization = { name = "Wharfside Vascular Room" }|
