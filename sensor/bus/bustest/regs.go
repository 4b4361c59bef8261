package bustest

// Memory is a register file with an index that counts up, the body of most
// emulators. Hooks make it behave.
type Memory struct {
	Wide    bool // register numbers of two bytes, the high one first
	Bytes   []byte
	OnWrite func(reg uint16, v byte) // called after a byte was stored
	OnRead  func(reg uint16)         // called before a byte is read
	Whole   func(w, r []byte)        // takes whole transfers instead, for chips that do not count up
	index   uint16
}

// Tx does a transfer: the register number, bytes to store, then bytes to read.
func (m *Memory) Tx(w, r []byte) {
	if m.Whole != nil {
		m.Whole(w, r)
		return
	}
	if len(w) > 0 {
		m.index, w = uint16(w[0]), w[1:]
		if m.Wide && len(w) > 0 {
			m.index, w = m.index<<8|uint16(w[0]), w[1:]
		} else if m.Wide {
			m.index <<= 8 // Half a number: the low byte never came.
		}
	}
	for _, v := range w {
		m.store(v)
	}
	for i := range r {
		r[i] = m.load()
	}
}

func (m *Memory) store(v byte) {
	reg := m.index
	m.index++
	if int(reg) < len(m.Bytes) {
		m.Bytes[reg] = v
	}
	if m.OnWrite != nil {
		m.OnWrite(reg, v)
	}
}

func (m *Memory) load() byte {
	reg := m.index
	m.index++
	if m.OnRead != nil {
		m.OnRead(reg)
	}
	if int(reg) < len(m.Bytes) {
		return m.Bytes[reg]
	}
	return 0
}

// Put16 stores two bytes, the high one first.
func (m *Memory) Put16(reg, v uint16) { m.Bytes[reg], m.Bytes[reg+1] = byte(v>>8), byte(v) }

// U16 returns two bytes, the high one first.
func (m *Memory) U16(reg uint16) uint16 { return uint16(m.Bytes[reg])<<8 | uint16(m.Bytes[reg+1]) }
