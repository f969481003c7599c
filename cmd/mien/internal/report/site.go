// Package report writes the state of a catalog as a folder of static HTML pages with pictures, and as
// CSV. It knows no catalog: the caller fills a [Site] with what may be shown.
package report

// Site is everything that a report shows.
type Site struct {
	Title    string
	AsOf     string // the date that the report speaks of
	CodeOnly bool   // names of people are left out
	Squads   []Squad
	Queue    []Request
	Subjects []Subject
	Cautions []string // printed at the foot of every page
}

// Squad is one line of the readiness table.
type Squad struct {
	Name                   string
	Subjects               int
	Current, Ageing, Wrong int
	OpenMinutes            float64
	ArtistDays             float64
}

// Request is one line of the queue.
type Request struct {
	ID, Subject, Name, State, Way string
	Scope                         string
	Reasons                       []string
	Minutes                       float64
	Score                         float64
}

// Subject is one person's page.
type Subject struct {
	Code, Name, Squad string
	Tier              int
	Standing          string // current, ageing, wrong
	Sessions          []Session
	Comparisons       []Comparison
	Items             []Item
	Requests          []Request
	Stale             []Stale // one line a cause
	StaleAssets       int     // assets among them
}

// Session is one generation of a subject.
type Session struct {
	Number        int
	Name, Date    string
	Takes         []string
	Missing, Held []string
}

// Comparison is what changed between two generations in one part.
type Comparison struct {
	Part, Pose, From, To string
	Verdict              string
	Conclusion           string
	Causes               []string
	Pictures             []Picture
	Findings             []Finding
}

// Picture is a picture file of the report with the words below it.
type Picture struct {
	From    string // file to copy, absolute
	Name    string // file name in the report, set by [Write]
	Caption string
}

// Finding is one change as the report shows it.
type Finding struct {
	ID, Kind, Action, Region, Sure, State string
	AreaCM2                               float64
	Because, RuledOut                     []string
	Pictures                              []Picture
}

// Item is one line of the appearance sheet.
type Item struct{ Kind, Region, From, Until, Lasting, Clearance, Note string }

// Stale is a game asset that needs work, and why.
type Stale struct{ Name, Cause, Region, Action string }
