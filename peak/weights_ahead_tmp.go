package peak

var aheadNetA, aheadNetB, aheadNetC = make([]float32, aheadSize), make([]float32, aheadSize), make([]float32, aheadSize)
