// Command icon turns a picture into an icon of Windows: icon PNG ICO.
package main

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/png"
	"log"
	"os"

	"golang.org/x/image/draw"
)

func main() {
	data, err := os.ReadFile(os.Args[1])
	check(err)
	picture, err := png.Decode(bytes.NewReader(data))
	check(err)
	sizes := []int{16, 24, 32, 48, 64, 256}
	var head, body bytes.Buffer
	put := func(values ...any) {
		for _, v := range values {
			check(binary.Write(&head, binary.LittleEndian, v))
		}
	}
	put(uint16(0), uint16(1), uint16(len(sizes)))
	for _, n := range sizes {
		small := image.NewNRGBA(image.Rect(0, 0, n, n))
		draw.CatmullRom.Scale(small, small.Rect, picture, picture.Bounds(), draw.Src, nil)
		from := body.Len()
		check(png.Encode(&body, small))
		side := byte(n) // 0 stands for 256
		put(side, side, byte(0), byte(0), uint16(1), uint16(32), uint32(body.Len()-from), uint32(6+16*len(sizes)+from))
	}
	check(os.WriteFile(os.Args[2], append(head.Bytes(), body.Bytes()...), 0o644))
}

func check(err error) {
	if err != nil {
		log.Fatal(err)
	}
}
