module example.com/mine

go 1.26
