package book_test

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"tallywink.example/channelplan/book"
)

// A record is on the disk when Append returns.
func ExampleBook() {
	dir, err := os.MkdirTemp("", "book")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	b := book.Book{Path: filepath.Join(dir, "notes.jsonl")}
	type note struct {
		book.Record
		Text string `json:"text"`
	}
	at := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	if err := b.Append(note{book.Record{Type: "note", Time: at}, "pad changed"}); err != nil {
		fmt.Println(err)
		return
	}
	in, err := b.Open()
	if err != nil {
		fmt.Println(err)
		return
	}
	defer in.Close()
	damaged, err := book.Scan(in, b.Path, func(number int, line []byte) error {
		fmt.Printf("%d %s\n", number, line)
		return nil
	})
	fmt.Println(damaged, err)
	// Output:
	// 1 {"type":"note","time":"2026-11-25T09:00:00Z","text":"pad changed"}
	// [] <nil>
}
