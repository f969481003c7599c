package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"mien/asset/gltf"
	"mien/asset/obj"
	"mien/asset/ply"
)

// rewrite puts the glTF files of a folder into another format, as programs that know no glTF deliver
// them: rewrite DIR obj|ply. Pictures go beside the mesh, an OBJ file's by way of a library.
func rewrite(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 || args[1] != "obj" && args[1] != "ply" {
		ts.Fatalf("usage: rewrite DIR obj|ply")
	}
	names, err := filepath.Glob(filepath.Join(ts.MkAbs(args[0]), "*.glb"))
	ts.Check(err)
	if len(names) == 0 {
		ts.Fatalf("no .glb files in %s", args[0])
	}
	for _, name := range names {
		f, err := gltf.Open(context.Background(), name)
		ts.Check(err)
		stem := strings.TrimSuffix(name, ".glb")
		library, pictures := "", []string(nil)
		if len(f.Mesh.MaterialSet) == 0 {
			ts.Fatalf("%s has no materials", name)
		}
		for k, m := range f.Mesh.MaterialSet {
			library += "newmtl " + m.Name + "\nKd 0.8 0.8 0.8\n"
			picture := ""
			if im := f.Images[k]; im != nil {
				picture = filepath.Base(stem) + " map" + map[string]string{"image/png": ".png", "image/jpeg": ".jpg"}[im.Mime]
				ts.Check(os.WriteFile(filepath.Join(filepath.Dir(name), picture), im.Data, 0o600))
				library += "map_Kd D:\\rig\\out\\" + picture + "\n"
			}
			pictures = append(pictures, picture)
		}
		w, err := os.Create(stem + "." + args[1])
		ts.Check(err)
		if args[1] == "obj" {
			ts.Check(os.WriteFile(stem+".mtl", []byte(library), 0o600))
			err = obj.Encode(w, f.Mesh, obj.Options{Library: filepath.Base(stem) + ".mtl"})
		} else {
			err = ply.Encode(w, f.Mesh, ply.Options{Pictures: pictures})
		}
		ts.Check(err)
		ts.Check(w.Close())
		ts.Check(os.Remove(name))
	}
}
