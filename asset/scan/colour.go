package scan

import (
	"errors"
	"fmt"
	"runtime"
	"sync"

	"mien/asset/gltf"
	"mien/asset/texture"
)

// colour decodes the base colour of each material. Different pictures are decoded side by side.
func (l *loader) colour(s *Scan, f *model) error {
	pictures := append([]*gltf.Image(nil), f.images...)
	var beside *gltf.Image
	if l.baseFile != "" {
		beside = &gltf.Image{Name: l.baseFile, Data: l.baseData, File: l.baseFile}
		for k := range pictures {
			if pictures[k] == nil {
				pictures[k] = beside
			}
		}
	}
	s.BaseColor = make([]*texture.Image, len(pictures))
	if s.Mesh.TriUV == nil {
		s.Notes = append(s.Notes, "no texture coordinates: colour cannot be compared")
		return nil
	}
	decoded, err := l.decode(s, pictures)
	if err != nil {
		return err
	}
	any := false
	for k, p := range pictures {
		im := decoded[p]
		if im == nil {
			continue
		}
		any = true
		if t := f.tints[k]; t != (gltf.Tint{1, 1, 1}) && p != beside {
			im = tinted(im, t)
			s.Notes = append(s.Notes, fmt.Sprintf("base colour of material %d is multiplied by %.3g %.3g %.3g as the file says", k, t[0], t[1], t[2]))
		}
		s.BaseColor[k] = im
	}
	if !any {
		s.Notes = append(s.Notes, "no base colour picture: colour cannot be compared")
	}
	return nil
}

// decode decodes each distinct picture once, in parallel; results and errors keep their order.
func (l *loader) decode(s *Scan, pictures []*gltf.Image) (map[*gltf.Image]*texture.Image, error) {
	type job struct {
		picture *gltf.Image
		image   *texture.Image
		info    texture.Info
		err     error
	}
	var jobs []*job
	seen := map[*gltf.Image]bool{nil: true}
	for _, p := range pictures {
		if !seen[p] {
			seen[p] = true
			jobs = append(jobs, &job{picture: p})
		}
	}
	var wait sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, j := range jobs {
		slots <- struct{}{}
		wait.Go(func() {
			defer func() { <-slots }()
			name := j.picture.File
			if name == "" {
				name = fmt.Sprintf("%s: picture %d", s.Name, i)
			}
			j.image, j.info, j.err = texture.DecodeBytes(j.picture.Data, name, l.o.Limits)
		})
	}
	wait.Wait()
	out := map[*gltf.Image]*texture.Image{}
	for _, j := range jobs {
		var u *texture.UnsupportedError
		switch {
		case errors.As(j.err, &u):
			s.Notes = append(s.Notes, j.err.Error())
			continue
		case j.err != nil:
			return nil, j.err
		}
		s.Notes = append(s.Notes, j.info.Notes...)
		out[j.picture] = j.image
	}
	return out, nil
}

// tinted returns im multiplied in linear light.
func tinted(im *texture.Image, t gltf.Tint) *texture.Image {
	var table [3][256]uint8
	for k := range table {
		for v := range table[k] {
			table[k][v] = texture.Encode8(texture.Linear[v] * float32(t[k]))
		}
	}
	out := texture.New(im.W, im.H)
	for i, v := range im.Pix {
		out.Pix[i] = table[i%3][v]
	}
	return out
}
