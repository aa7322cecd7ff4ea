package trainer

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"tallywink.example/blink"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/book/booktest"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// TestMain lets the test binary act as a trainee. Otherwise it checks that no test
// leaves a goroutine behind.
func TestMain(m *testing.M) {
	if path := os.Getenv("TRAINER_TEST_BOOK"); path != "" {
		if err := answerOn(path, os.Getenv("TRAINER_TEST_TRAINEE")); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
	}
	goleak.VerifyTestMain(m)
}

// answerOn trains forever, and prints a line when the screen says that an answer was
// not sure: the answer is in the book by then.
func answerOn(path, trainee string) error {
	l, err := demo.Lineup()
	if err != nil {
		return err
	}
	b := book.Book{Path: path}
	s := NewTraining(TrainOptions{Trainee: trainee, Record: func(a progress.Attempt) error { return b.Append(a) },
		Material: lesson.Material{Code: blink.Tally, Lineup: l, Random: rand.New(rand.NewPCG(1, 1))}}, time.Now())
	for s.Key('1', time.Now()); !s.Over(); s.Key(KeyEnter, time.Now()) {
		s.Key('u', time.Now())
		s.Key(KeyEnter, time.Now())
		if strings.Contains(onPaper(s.View(time.Now(), 80, 24), 80, 24), "NOT SURE") {
			fmt.Println("told")
		}
		time.Sleep(time.Millisecond)
	}
	return s.Trained().Err
}

// Two trainees at once on one book, killed at random moments while they answer: no
// answer that the screen has reported is lost, and no torn record counts.
func TestKilledWhileTraining(t *testing.T) {
	b := book.Book{Path: filepath.Join(t.TempDir(), "attempts.jsonl")}
	told, killed := booktest.Kills{
		Count: 60, More: 200 * time.Millisecond,
		Start: func(writer string) *exec.Cmd {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), "TRAINER_TEST_BOOK="+b.Path, "TRAINER_TEST_TRAINEE="+writer)
			return cmd
		},
		Tells: func(line string) bool { return line == "told" },
	}.Run(t)
	in, err := b.Open()
	require.NoError(t, err)
	defer in.Close()
	attempts, err := progress.Read(in, b.Path, time.Now())
	require.NoError(t, err)
	found := map[string]int{}
	for _, a := range attempts.All {
		found[a.Trainee]++
		assert.Equal(t, "digits", a.Exercise)
		assert.Equal(t, progress.Unsure, a.Read)
	}
	booktest.Lost(t, told, found, len(attempts.Damaged), killed)
}
