package main

import "github.com/spf13/cobra"

// commands returns every command, in the order of the help text.
func commands(a *app) []*cobra.Command {
	return []*cobra.Command{
		newDemo(a), newInit(a), newPeople(a), newRoster(a), newCheck(a), newCompare(a), newIntake(a), newTake(a), newChanges(a),
		newFinding(a), newAppearance(a), newSight(a), newRequest(a), newQueue(a), newVisit(a), newRig(a), newDerived(a),
		newReadiness(a), newHistory(a), newExport(a), newReport(a), newVerify(a), newTidy(a), newSync(a), newPolicy(a), newVersion(a),
	}
}
