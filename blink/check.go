package blink

// CheckRule is a rule for a check digit.
type CheckRule struct {
	Name  string
	Digit func(digits []int) int // the check digit of digits, each 0 to 9
}

// CheckRules returns all rules, each of them published: Damm's; Verhoeff's, Error
// Detecting Decimal Codes, Mathematical Centre Tract 29, Amsterdam 1969; Luhn's,
// ISO/IEC 7812-1, annex B; and the sum of all digits, as in a parity check.
func CheckRules() []CheckRule { return []CheckRule{Damm, Verhoeff, Luhn, Sum} }

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

// Damm is Damm's check digit: it changes with any single wrong digit and with any swap
// of two neighbors. If a number is not a single digit, only its last decimal counts.
var Damm = CheckRule{Name: "damm", Digit: func(digits []int) int {
	check := 0
	for _, d := range digits {
		check = dammTable[check][(d%10+10)%10]
	}
	return check
}}

// Luhn is the check digit of ISO/IEC 7812-1, annex B: double every second digit, add
// the digits of the products, and the sum of everything is a multiple of ten. It
// changes with any single wrong digit, and with any swap of neighbors except 0 and 9.
var Luhn = CheckRule{Name: "luhn", Digit: func(digits []int) int {
	sum := 0
	for i := range digits {
		d := (digits[len(digits)-1-i]%10 + 10) % 10
		if i%2 == 0 {
			d = d*2/10 + d*2%10
		}
		sum += d
	}
	return (10 - sum%10) % 10
}}

// Sum is the digit that makes the sum of all digits a multiple of ten. It changes with
// any single wrong digit, but not with a swap.
var Sum = CheckRule{Name: "sum", Digit: func(digits []int) int {
	sum := 0
	for _, d := range digits {
		sum += (d%10 + 10) % 10
	}
	return (10 - sum%10) % 10
}}

// verhoeffStep is the permutation applied to a digit, once for each place from the
// right. dihedral is the product in the symmetry group of the regular pentagon. Both
// are from Verhoeff 1969, from memory; the tests check what the rule promises.
var verhoeffStep = [10]int{1, 5, 7, 6, 2, 8, 3, 0, 9, 4}

func dihedral(a, b int) int {
	turn, flip := a%5, a/5
	if flip == 0 {
		return (turn+b%5)%5 + b/5*5
	}
	return (turn-b%5+5)%5 + (1-b/5)*5
}

// Verhoeff is Verhoeff's check digit: it changes with any single wrong digit and with
// any swap of neighbors.
var Verhoeff = CheckRule{Name: "verhoeff", Digit: func(digits []int) int {
	check := 0
	for i := range digits {
		d := (digits[len(digits)-1-i]%10 + 10) % 10
		for range (i + 1) % 8 {
			d = verhoeffStep[d]
		}
		check = dihedral(check, d)
	}
	if check < 5 {
		return (5 - check) % 5
	}
	return check // a reflection undoes itself
}}
