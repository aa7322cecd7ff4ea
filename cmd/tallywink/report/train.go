package report

import (
	"fmt"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/trainer"
)

type examDoc struct {
	Seed    uint64        `json:"seed"`
	Passed  bool          `json:"passed"`
	Right   int           `json:"right"`
	Of      int           `json:"of"`
	Misread int           `json:"misread"`
	Still   bool          `json:"still"`  // the pulses were drawn, and nothing flashed
	Before  int           `json:"before"` // how often this trainee had taken the same seed before
	Time    time.Time     `json:"time"`
	Answers []answeredDoc `json:"answers"`
	// The ID of the run in its records; how often others had taken the seed before;
	// answers given before enough of the lamp was shown.
	RunID string `json:"run_id"`
	Known int    `json:"known"`
	Early int    `json:"early"`
}

type answeredDoc struct {
	Shown  string `json:"shown"`
	Read   string `json:"read"`
	Right  bool   `json:"right"`
	TookMS int64  `json:"took_ms"`
}

type trainedDoc struct {
	Schema   int      `json:"schema"`
	Trainee  string   `json:"trainee"`
	Answered int      `json:"answered"`
	Right    int      `json:"right"`
	Book     string   `json:"book"`
	Exam     *examDoc `json:"qualification"` // null if no run was finished
}

// NewTrainedDoc returns the JSON document of a session of training, kept in a book.
func NewTrainedDoc(trainee string, done trainer.Trained, book string) any {
	d := trainedDoc{Schema: answer.Schema, Trainee: trainee, Answered: done.Answered, Right: done.Right, Book: book}
	if e := done.Exam; e != nil {
		d.Exam = &examDoc{Seed: e.Seed, Passed: e.Passed(), Right: e.Right, Of: e.Of, Misread: e.Misread,
			Still: e.Still, Before: e.Before, Time: e.Last, Answers: []answeredDoc{}, RunID: e.ID, Known: e.Known,
			Early: e.Early}
		for _, a := range e.Answers {
			d.Exam.Answers = append(d.Exam.Answers, answeredDoc{a.Shown, a.Read, a.Right, a.TookMS})
		}
	}
	return d
}

// TrainedBlocks tells the result of a session of training; qualify reports that it was to
// be a qualification run.
func TrainedBlocks(trainee string, done trainer.Trained, qualify bool, book string, code *blink.Code) []console.Block {
	var blocks []console.Block
	switch {
	case done.Exam != nil:
		for i, l := range done.Exam.Lines(trainee) {
			blocks = append(blocks, console.Section(wording.Either(i == 0, "Result", ""), l))
		}
	case qualify:
		blocks = append(blocks, console.Section("Result",
			"the qualification run was not finished, so it has no result."))
	default:
		blocks = append(blocks, console.Section("Done",
			fmt.Sprintf("%d answered, %d right.", done.Answered, done.Right)))
	}
	if text := done.LatenessText(); text != "" {
		blocks = append(blocks, console.Section("Lamp", text))
	}
	if done.Answered > 0 {
		blocks = append(blocks, console.Section("Next",
			console.Shown(trainer.DueText(done.Attempts, code, time.Now()))),
			console.Section("Book", console.Shown(book)+": 'tallywink progress' reads it."))
	}
	return blocks
}
