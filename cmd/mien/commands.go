package main

import "github.com/spf13/cobra"

// group is a headed list of commands in the help text.
type group struct {
	title    string
	commands []*cobra.Command
}

// commands returns every command, in the order of the help text.
func commands(a *app) []group {
	return []group{
		{"To begin:", []*cobra.Command{newDemo(a), newInit(a), newPeople(a), newRoster(a), newPolicy(a)}},
		{"Scans:", []*cobra.Command{newCheck(a), newCompare(a), newIntake(a), newTake(a), newExport(a)}},
		{"What changed:", []*cobra.Command{newChanges(a), newFinding(a), newAppearance(a), newHistory(a)}},
		{"Requests and visits:", []*cobra.Command{newSight(a), newRequest(a), newQueue(a), newVisit(a), newRig(a)}},
		{"Game assets and overview:", []*cobra.Command{newDerived(a), newReadiness(a), newReport(a)}},
		{"Care of the catalog:", []*cobra.Command{newVerify(a), newTidy(a), newSync(a), newVersion(a)}},
	}
}
