//go:build js && wasm

// Command page is Tallywink in a phone's browser. The page's workers load it, and call it
// by name with JSON; pictures are passed as bytes. Package face produces the answers.
package main

import (
	"syscall/js"

	"tallywink.example/cmd/page/face"
)

func main() {
	f := face.New()
	var pixels []byte
	js.Global().Set("tallywink", js.ValueOf(map[string]any{
		"call": js.FuncOf(func(_ js.Value, args []js.Value) any {
			return string(f.Call(args[0].String(), []byte(args[1].String())))
		}),
		"push": js.FuncOf(func(_ js.Value, args []js.Value) any {
			if n := args[1].Get("length").Int(); len(pixels) != n {
				pixels = make([]byte, n)
			}
			js.CopyBytesToGo(pixels, args[1])
			f.Push(args[0].Float(), pixels)
			return nil
		}),
	}))
	js.Global().Call("tallywinkReady")
	select {} // it answers for as long as the page is open
}
