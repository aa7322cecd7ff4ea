package lesson_test

import (
	"fmt"
	"math/rand/v2"

	"tallywink.example/blink"
	"tallywink.example/trainer/lesson"
)

// A question, a wrong answer, and the feedback.
func ExampleQuestion_Judge() {
	digits := lesson.Exercises(blink.Tally)[0]
	q := digits.Make(lesson.Material{Code: blink.Tally, Random: rand.New(rand.NewPCG(1, 1))}, "digit 7",
		blink.Tally.Timing.Unit)
	f := q.Judge(blink.Tally, "8")
	fmt.Println(q.Ask[0], f.Right)
	fmt.Println(f.Lines[0])
	fmt.Printf("%s\n%s\n%s\n", f.Shown, f.Read, f.Differ)
	// Output:
	// Which digit? false
	// This was seven, a long and two shorts. You answered eight: a long and three shorts.
	// ### # #
	// ### # # #
	//        ^^
}
