package blink

// dammTable is the operation table of the totally anti-symmetric quasigroup
// of order 10 in H. M. Damm, Total anti-symmetrische Quasigruppen,
// dissertation, Marburg 2004, page 111.
var dammTable = [10][10]int{
	{0, 3, 1, 7, 5, 9, 8, 6, 4, 2},
	{7, 0, 9, 2, 1, 5, 4, 8, 6, 3},
	{4, 2, 0, 6, 8, 7, 1, 3, 5, 9},
	{1, 7, 5, 0, 9, 8, 3, 4, 2, 6},
	{6, 1, 2, 3, 0, 4, 5, 9, 7, 8},
	{3, 6, 7, 4, 2, 0, 9, 5, 8, 1},
	{5, 8, 6, 9, 7, 2, 0, 1, 3, 4},
	{8, 9, 4, 5, 3, 6, 2, 0, 1, 7},
	{9, 4, 3, 8, 6, 1, 7, 2, 0, 5},
	{2, 5, 8, 1, 4, 3, 6, 7, 9, 0},
}

// Damm is Damm's check digit: it differs after any single wrong digit and
// after any swap of two neighboring ones. Of a number that is no digit only
// the last decimal counts.
var Damm = CheckRule{Name: "damm", Digit: func(digits []int) int {
	check := 0
	for _, d := range digits {
		check = dammTable[check][(d%10+10)%10]
	}
	return check
}}
