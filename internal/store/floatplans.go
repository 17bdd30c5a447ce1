package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"forecastd/internal/models"
)

// FloatPlan is what a shore contact knows of a trip.
type FloatPlan struct {
	Port string
	Date models.Date
	// Booking marks the trip among those of the day, as Call.Booking does.
	Booking string
	Boat    string
	Ground  string
	// People is how many are aboard.
	People      models.Opt[int]
	Leave, Back time.Time
	// Overdue is when the contact is told that the boat is not back, unless
	// it checked in.
	Overdue time.Time
	// Left is when the contact was told that the boat leaves.
	Left, CheckedIn, ToldOverdue, CalledOff models.Opt[time.Time]
	// CheckedInBy is who said that the boat is back.
	CheckedInBy string
}

const floatPlanColumns = "port, date, booking, boat, ground, people, leave_at, back_at, overdue_at, left_at, checked_in_at, checked_in_by, told_overdue_at, called_off_at"

func scanFloatPlan(rows *sql.Rows) (p FloatPlan, err error) {
	return p, rows.Scan(&p.Port, toText(&p.Date), &p.Booking, &p.Boat, &p.Ground, toInteger(&p.People), toTime(&p.Leave), toTime(&p.Back), toTime(&p.Overdue),
		toOptTime(&p.Left), toOptTime(&p.CheckedIn), &p.CheckedInBy, toOptTime(&p.ToldOverdue), toOptTime(&p.CalledOff))
}

// PlanFloat keeps a trip's plan, or changes it: new times are told anew when
// overdue. What has happened (left, checked in) stays.
func (s *Store) PlanFloat(ctx context.Context, p FloatPlan) error {
	const doing = "keep a float plan"
	if !p.Back.After(p.Leave) || p.Overdue.Before(p.Back) {
		return fmt.Errorf("%s: the boat leaves, is back, and is overdue, in that order", doing)
	}
	return s.change(ctx, doing, "INSERT INTO float_plans ("+floatPlanColumns+`) VALUES (?,?,?,?,?,?,?,?,?,NULL,NULL,'',NULL,NULL)
		ON CONFLICT (port, date, booking) DO UPDATE SET boat = excluded.boat, ground = excluded.ground, people = excluded.people, leave_at = excluded.leave_at, back_at = excluded.back_at,
			told_overdue_at = iif(overdue_at = excluded.overdue_at, told_overdue_at, NULL), overdue_at = excluded.overdue_at, called_off_at = NULL`,
		p.Port, p.Date.String(), p.Booking, p.Boat, p.Ground, integer(p.People), at(p.Leave), at(p.Back), at(p.Overdue))
}

// FloatPlans returns the plans of a day, earliest first.
func (s *Store) FloatPlans(ctx context.Context, port string, date models.Date) ([]FloatPlan, error) {
	return list(ctx, s.read, fmt.Sprintf("read the float plans of %s", date), scanFloatPlan,
		"SELECT "+floatPlanColumns+" FROM float_plans WHERE port = ? AND date = ? ORDER BY leave_at, booking", port, date.String())
}

// OpenFloatPlans returns the plans whose boat has not checked in, nor been
// called off, earliest first.
func (s *Store) OpenFloatPlans(ctx context.Context) ([]FloatPlan, error) {
	return list(ctx, s.read, "read float plans", scanFloatPlan,
		"SELECT "+floatPlanColumns+" FROM float_plans WHERE checked_in_at IS NULL AND called_off_at IS NULL ORDER BY leave_at, port")
}

// FloatEvent is something that happens to a float plan.
type FloatEvent string

// Events of a float plan.
const (
	FloatLeft      FloatEvent = "left_at"
	FloatOverdue   FloatEvent = "told_overdue_at"
	FloatCalledOff FloatEvent = "called_off_at"
)

// MarkFloat keeps when something happened to a plan, the first time; told
// again it changes nothing.
func (s *Store) MarkFloat(ctx context.Context, p FloatPlan, e FloatEvent, when time.Time) error {
	switch e {
	case FloatLeft, FloatOverdue, FloatCalledOff:
	default:
		return fmt.Errorf("mark a float plan: there is no event %q", e)
	}
	return s.change(ctx, fmt.Sprintf("mark the float plan of %s", p.Date),
		fmt.Sprintf("UPDATE float_plans SET %[1]s = coalesce(%[1]s, ?) WHERE port = ? AND date = ? AND booking = ?", e), at(when), p.Port, p.Date.String(), p.Booking)
}

// CheckInFloat keeps that the boat is back from a trip, and who said so. Where
// somebody said so before, it answers ErrNotFound and changes nothing.
func (s *Store) CheckInFloat(ctx context.Context, p FloatPlan, by string, when time.Time) error {
	return s.change(ctx, fmt.Sprintf("check in the trip of %s", p.Date),
		"UPDATE float_plans SET checked_in_at = ?, checked_in_by = ? WHERE port = ? AND date = ? AND booking = ? AND checked_in_at IS NULL",
		at(when), by, p.Port, p.Date.String(), p.Booking)
}
