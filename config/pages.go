package config

import (
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strings"
)

// Pages is how people reach the pages of `forecastd serve`, and who may say
// something by them.
type Pages struct {
	// Address is where people reach them, as "https://boat.example.com"
	// without a path; links in messages lead there. Empty: there are no links,
	// and the pages are asked for on the address listened on.
	Address string
	// CaptainFile and MateFile hold the hashes of the passphrases; a role
	// without one can't log in.
	CaptainFile, MateFile string
	// TrustedProxies are the networks of servers before us that tell in
	// X-Forwarded-For or Forwarded whom they answer. From elsewhere but this
	// machine such a line is not believed.
	TrustedProxies []netip.Prefix
}

func readPages(t *table) Pages {
	g := t.group("pages", "the pages of forecastd serve")
	p := Pages{
		Address:        maybe(g, "address", pagesAddress()).Or(""),
		CaptainFile:    maybe(g, "captain_file", text("the file that `forecastd setup -passphrase captain` wrote")).Or(""),
		MateFile:       maybe(g, "mate_file", text("the file that `forecastd setup -passphrase mate` wrote")).Or(""),
		TrustedProxies: each(g, "trusted_proxies", network()),
	}
	g.done()
	return p
}

// pagesAddress is an address without a path. A passphrase must not cross a
// network in the clear, so only names of this machine and of networks at home
// may go without TLS.
func pagesAddress() kind[string] {
	const what = "an address that people reach, as https://boat.example.com"
	return kind[string]{
		what: what,
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			u, err := url.Parse(s)
			if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
				return "", fmt.Errorf("%q is no address: write one, as https://boat.example.com", s)
			}
			if strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.Fragment != "" || u.User != nil {
				return "", fmt.Errorf("%q has more than a host: write https://%s", s, u.Host)
			}
			if u.Scheme == "http" && !atHome(u.Hostname()) {
				return "", fmt.Errorf("%q would carry the passphrase in the clear: write https://%s, with a proxy that keeps the certificate", s, u.Host)
			}
			return u.Scheme + "://" + u.Host, nil
		},
	}
}

// network is a network, or one address. One in which half the world has its
// addresses is a slip: everybody could then make up where he comes from.
func network() kind[netip.Prefix] {
	const what = "the network of a server before the pages, as 172.18.0.0/16"
	return kind[netip.Prefix]{
		what: what,
		show: netip.Prefix.String,
		read: func(s string) (netip.Prefix, error) {
			p, err := netip.ParsePrefix(s)
			if at, bad := netip.ParseAddr(s); bad == nil && at.Zone() == "" {
				p, err = at.Unmap().Prefix(at.Unmap().BitLen())
			}
			switch {
			case err != nil:
				return p, fmt.Errorf("%q is no network: write one, as 172.18.0.0/16 or 192.168.1.5", s)
			case p.Addr().Is4() && p.Bits() < 8, p.Addr().Is6() && p.Bits() < 16:
				return p, fmt.Errorf("%q is half the world: write the network of your own server alone, as 172.18.0.0/16", s)
			}
			return p.Masked(), nil
		},
	}
}

// atHome tells whether a host is on this machine or in a private network.
func atHome(host string) bool {
	ip := net.ParseIP(host)
	return onThisMachine(host) || strings.HasSuffix(host, ".local") || ip != nil && ip.IsPrivate()
}
