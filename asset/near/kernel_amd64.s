#include "textflag.h"

// Eight lanes of float32 throughout. Sums follow the order of the Go twins, and nothing is fused but in
// pairsDist2AVX2, so that both give the same bits. VMINPS and VMAXPS return their second source (the first one written
// here) when a value is not a number.

#define EIGHT(name, v) \
	DATA name<>+0(SB)/4, v; DATA name<>+4(SB)/4, v; DATA name<>+8(SB)/4, v; DATA name<>+12(SB)/4, v; \
	DATA name<>+16(SB)/4, v; DATA name<>+20(SB)/4, v; DATA name<>+24(SB)/4, v; DATA name<>+28(SB)/4, v; \
	GLOBL name<>(SB), RODATA|NOPTR, $32

EIGHT(one, $1.0)
EIGHT(half, $0.5)
EIGHT(tiny, $1e-37)
EIGHT(unit, $0x35800000)  // 2^-20
EIGHT(zero, $0)
EIGHT(huge, $0x7f7fffff) // the greatest float32

// Every third bit, in steps.
EIGHT(low10, $0x3ff)
EIGHT(third1, $0x030000ff)
EIGHT(third2, $0x0300f00f)
EIGHT(third3, $0x030c30c3)
EIGHT(third4, $0x09249249)
EIGHT(topbit, $0x400)

// Offsets of a node's bounds and of a leaf's corners.
#define LOX 0
#define LOY 32
#define LOZ 64
#define HIX 96
#define HIY 128
#define HIZ 160
#define AX_ 0
#define AY_ 32
#define AZ_ 64
#define BX_ 96
#define BY_ 128
#define BZ_ 160
#define CX_ 192
#define CY_ 224
#define CZ_ 256

// Offsets of a crate's bounds and leaf numbers: arrays of 520.
#define CLOX 0
#define CLOY 2080
#define CLOZ 4160
#define CHIX 6240
#define CHIY 8320
#define CHIZ 10400
#define CLEAF 12480

// BOXDIST2: Y3 = squared distance from (Y0, Y1, Y2) to the boxes at R.
#define BOXDIST2(R, LOX, LOY, LOZ, HIX, HIY, HIZ) \
	VMOVUPS LOX(R), Y3 \
	VMAXPS  Y0, Y3, Y3 \
	VMINPS  HIX(R), Y3, Y3 \
	VSUBPS  Y0, Y3, Y3 \
	VMULPS  Y3, Y3, Y3 \
	VMOVUPS LOY(R), Y4 \
	VMAXPS  Y1, Y4, Y4 \
	VMINPS  HIY(R), Y4, Y4 \
	VSUBPS  Y1, Y4, Y4 \
	VMULPS  Y4, Y4, Y4 \
	VADDPS  Y4, Y3, Y3 \
	VMOVUPS LOZ(R), Y4 \
	VMAXPS  Y2, Y4, Y4 \
	VMINPS  HIZ(R), Y4, Y4 \
	VSUBPS  Y2, Y4, Y4 \
	VMULPS  Y4, Y4, Y4 \
	VADDPS  Y4, Y3, Y3

// func nodeDist2AVX2(n *node, p *point, out *[fan]float32)
TEXT ·nodeDist2AVX2(SB), NOSPLIT, $0-24
	MOVQ n+0(FP), AX
	MOVQ p+8(FP), BX
	MOVQ out+16(FP), DI
	VBROADCASTSS 0(BX), Y0
	VBROADCASTSS 4(BX), Y1
	VBROADCASTSS 8(BX), Y2
	BOXDIST2(AX, LOX, LOY, LOZ, HIX, HIY, HIZ)
	VMOVUPS Y3, (DI)
	VZEROUPPER
	RET

// AXISGAP: OUT = squared gap along one axis between the box LOP..HIP and the boxes at R.
#define AXISGAP(R, LOOFF, HIOFF, LOP, HIP, OUT) \
	VMOVUPS LOOFF(R), OUT \
	VSUBPS  HIP, OUT, OUT \
	VSUBPS  HIOFF(R), LOP, Y7 \
	VMAXPS  Y7, OUT, OUT \
	VMAXPS  zero<>(SB), OUT, OUT \
	VMULPS  OUT, OUT, OUT

// func nodeReachAVX2(n *node, lo, hi *point, r2 float32) uint32
TEXT ·nodeReachAVX2(SB), NOSPLIT, $0-36
	MOVQ n+0(FP), AX
	MOVQ lo+8(FP), BX
	MOVQ hi+16(FP), CX
	VBROADCASTSS r2+24(FP), Y9
	VBROADCASTSS 0(BX), Y5
	VBROADCASTSS 0(CX), Y6
	AXISGAP(AX, LOX, HIX, Y5, Y6, Y0)
	VBROADCASTSS 4(BX), Y5
	VBROADCASTSS 4(CX), Y6
	AXISGAP(AX, LOY, HIY, Y5, Y6, Y1)
	VBROADCASTSS 8(BX), Y5
	VBROADCASTSS 8(CX), Y6
	AXISGAP(AX, LOZ, HIZ, Y5, Y6, Y2)
	VADDPS Y1, Y0, Y0
	VADDPS Y2, Y0, Y0
	VCMPPS $2, Y9, Y0, Y0
	VMOVMSKPS Y0, AX
	MOVL AX, ret+32(FP)
	VZEROUPPER
	RET

// PACK: copy the lanes of the bounds at FROM that Y4 names to TO.
#define PACK(FROM, TO) \
	VPERMPS FROM(BX), Y4, Y0 \
	VMOVUPS Y0, TO(DI)

// func collectAVX2(nodes *node, list *int32, n int, lo, hi *point, r2 float32, out *crate) int
TEXT ·collectAVX2(SB), NOSPLIT, $0-64
	MOVQ nodes+0(FP), R8
	MOVQ list+8(FP), SI
	MOVQ n+16(FP), DX
	MOVQ lo+24(FP), BX
	MOVQ hi+32(FP), CX
	VBROADCASTSS r2+40(FP), Y9
	MOVQ out+48(FP), DI
	LEAQ ·lanes(SB), R9
	VBROADCASTSS 0(BX), Y10
	VBROADCASTSS 4(BX), Y11
	VBROADCASTSS 8(BX), Y12
	VBROADCASTSS 0(CX), Y13
	VBROADCASTSS 4(CX), Y14
	VBROADCASTSS 8(CX), Y15
	XORQ R10, R10
	LEAQ (SI)(DX*4), DX

next:
	MOVLQSX (SI), AX
	LEAQ (AX)(AX*2), BX
	SHLQ $6, BX
	ADDQ R8, BX
	AXISGAP(BX, LOX, HIX, Y10, Y13, Y0)
	AXISGAP(BX, LOY, HIY, Y11, Y14, Y1)
	AXISGAP(BX, LOZ, HIZ, Y12, Y15, Y2)
	VADDPS Y1, Y0, Y0
	VADDPS Y2, Y0, Y0
	VCMPPS $2, Y9, Y0, Y0
	VMOVMSKPS Y0, CX
	VPMOVZXBD (R9)(CX*8), Y4
	PACK(LOX, CLOX)
	PACK(LOY, CLOY)
	PACK(LOZ, CLOZ)
	PACK(HIX, CHIX)
	PACK(HIY, CHIY)
	PACK(HIZ, CHIZ)
	SHLL $3, AX
	VMOVD AX, X5
	VPBROADCASTD X5, Y5
	VPADDD Y5, Y4, Y4
	VMOVDQU Y4, CLEAF(DI)
	POPCNTL CX, CX
	ADDQ CX, R10
	LEAQ (DI)(CX*4), DI
	ADDQ $4, SI
	CMPQ SI, DX
	JNE  next

	MOVQ R10, ret+56(FP)
	VZEROUPPER
	RET

// ACROSS: fold the eight lanes of Y by OP into lane 0.
#define ACROSS(OP, Y, X, YT, XT) \
	VEXTRACTF128 $1, Y, XT \
	OP XT, X, X \
	VPERMILPS $0x4e, X, XT \
	OP XT, X, X \
	VPERMILPS $0xb1, X, XT \
	OP XT, X, X

// OFFCENTRE: Y = squared distance along one axis, doubled, from P2/2 to the middles of the boxes at SI.
#define OFFCENTRE(LO, HI, P2, Y) \
	VSUBPS LO(SI), P2, Y \
	VSUBPS HI(SI), Y, Y \
	VMULPS Y, Y, Y

// func nearestBoxesAVX2(c *crate, n int, q *point, m int, out *int32)
//
// Y5 holds the least squared distances, Y6 their leaves. An empty box gives no number, which is never
// less.
TEXT ·nearestBoxesAVX2(SB), NOSPLIT, $32-40
	MOVQ c+0(FP), R8
	MOVQ n+8(FP), DX
	MOVQ q+16(FP), BX
	MOVQ m+24(FP), R10
	MOVQ out+32(FP), DI
	LEAQ (R8)(DX*4), DX

point:
	VBROADCASTSS 0(BX), Y0
	VBROADCASTSS 4(BX), Y1
	VBROADCASTSS 8(BX), Y2
	VADDPS Y0, Y0, Y0
	VADDPS Y1, Y1, Y1
	VADDPS Y2, Y2, Y2
	VMOVUPS huge<>(SB), Y5
	VXORPS Y6, Y6, Y6
	MOVQ R8, SI

next:
	OFFCENTRE(CLOX, CHIX, Y0, Y3)
	OFFCENTRE(CLOY, CHIY, Y1, Y4)
	VADDPS Y4, Y3, Y3
	OFFCENTRE(CLOZ, CHIZ, Y2, Y4)
	VADDPS Y4, Y3, Y3
	VCMPPS $1, Y5, Y3, Y4
	VMINPS Y5, Y3, Y5
	VBLENDVPS Y4, CLEAF(SI), Y6, Y6
	ADDQ $32, SI
	CMPQ SI, DX
	JLT  next

	VMOVUPS Y6, leaf-32(SP)
	VMOVAPS Y5, Y0
	ACROSS(VMINPS, Y0, X0, Y1, X1)
	VBROADCASTSS X0, Y0
	VCMPPS $0, Y0, Y5, Y0
	VMOVMSKPS Y0, CX
	BSFL CX, CX
	MOVL leaf-32(SP)(CX*4), AX
	MOVL AX, (DI)
	ADDQ $4, DI
	ADDQ $12, BX
	DECQ R10
	JNE  point

	VZEROUPPER
	RET

// func boxesWithinAVX2(c *crate, n int, q *point, r2 *float32, not *int32, m, room int, leaf, owner *int32) (pairs, points int)
TEXT ·boxesWithinAVX2(SB), NOSPLIT, $0-88
	MOVQ c+0(FP), R8
	MOVQ n+8(FP), DX
	MOVQ q+16(FP), BX
	MOVQ r2+24(FP), R12
	MOVQ not+32(FP), R13
	MOVQ leaf+56(FP), DI
	MOVQ owner+64(FP), R11
	LEAQ ·lanes(SB), R9
	LEAQ (R8)(DX*4), DX
	XORQ R10, R10
	XORQ AX, AX

point:
	CMPQ AX, m+40(FP)
	JGE  done
	MOVQ R10, CX
	ADDQ n+8(FP), CX
	CMPQ CX, room+48(FP)
	JGT  done
	VBROADCASTSS 0(BX), Y0
	VBROADCASTSS 4(BX), Y1
	VBROADCASTSS 8(BX), Y2
	VBROADCASTSS (R12)(AX*4), Y6
	VPBROADCASTD (R13)(AX*4), Y8
	VMOVD AX, X9
	VPBROADCASTD X9, Y9
	MOVQ R8, SI

next:
	BOXDIST2(SI, CLOX, CLOY, CLOZ, CHIX, CHIY, CHIZ)
	VCMPPS $2, Y6, Y3, Y3
	VPCMPEQD CLEAF(SI), Y8, Y7
	VPANDN Y3, Y7, Y3
	VMOVMSKPS Y3, CX
	VPMOVZXBD (R9)(CX*8), Y4
	VPERMD CLEAF(SI), Y4, Y4
	VMOVDQU Y4, (DI)(R10*4)
	VMOVDQU Y9, (R11)(R10*4)
	POPCNTL CX, CX
	ADDQ CX, R10
	ADDQ $32, SI
	CMPQ SI, DX
	JLT  next

	ADDQ $12, BX
	INCQ AX
	JMP  point

done:
	MOVQ R10, pairs+72(FP)
	MOVQ AX, points+80(FP)
	VZEROUPPER
	RET

// DOT: OUT = A . B.
#define DOT(AX1, AY1, AZ1, BX1, BY1, BZ1, OUT) \
	VMULPS AX1, BX1, OUT \
	VFMADD231PS AY1, BY1, OUT \
	VFMADD231PS AZ1, BZ1, OUT

// CLAMPED: Y0 = EA / max(EE, tiny), held to 0..1.
#define CLAMPED(EE, EA) \
	VMAXPS tiny<>(SB), EE, Y0 \
	VDIVPS Y0, EA, Y0 \
	VMAXPS zero<>(SB), Y0, Y0 \
	VMINPS one<>(SB), Y0, Y0

// RESIDUAL2: Y1 = |a - Y0*e|^2 with a in Y3, Y4, Y5.
#define RESIDUAL2(EX, EY, EZ) \
	VMOVAPS Y3, Y1 \
	VFNMADD231PS EX, Y0, Y1 \
	VMULPS Y1, Y1, Y1 \
	VMOVAPS Y4, Y2 \
	VFNMADD231PS EY, Y0, Y2 \
	VFMADD231PS Y2, Y2, Y1 \
	VMOVAPS Y5, Y2 \
	VFNMADD231PS EZ, Y0, Y2 \
	VFMADD231PS Y2, Y2, Y1

// LEFT: OUT = a - v*e0 - w*e2 along one axis, v in Y13, w in Y12.
#define LEFT(A, E0, E2, OUT) \
	VMOVAPS A, OUT \
	VFNMADD231PS E0, Y13, OUT \
	VFNMADD231PS E2, Y12, OUT

// func pairsDist2AVX2(leaves *leaf, list, owner *int32, n int, q *point, out, least *[fan]float32)
//
// a = p - A in Y3..Y5, e0 = B - A in Y6..Y8, e2 = C - A in Y9..Y11; the least distance so far is kept
// in out.
TEXT ·pairsDist2AVX2(SB), NOSPLIT, $0-56
	MOVQ leaves+0(FP), R8
	MOVQ list+8(FP), SI
	MOVQ owner+16(FP), R11
	MOVQ n+24(FP), DX
	MOVQ q+32(FP), R12
	MOVQ out+40(FP), DI
	MOVQ least+48(FP), R13
	LEAQ (SI)(DX*4), DX

next:
	MOVLQSX (SI), AX
	IMUL3Q $288, AX, AX
	ADDQ R8, AX
	MOVLQSX (R11), CX
	LEAQ (CX)(CX*2), BX
	LEAQ (R12)(BX*4), BX
	SHLQ $5, CX
	VBROADCASTSS 0(BX), Y3
	VBROADCASTSS 4(BX), Y4
	VBROADCASTSS 8(BX), Y5
	VMOVUPS AX_(AX), Y0
	VMOVUPS AY_(AX), Y1
	VMOVUPS AZ_(AX), Y2
	VSUBPS Y0, Y3, Y3
	VSUBPS Y1, Y4, Y4
	VSUBPS Y2, Y5, Y5
	VMOVUPS BX_(AX), Y6
	VMOVUPS BY_(AX), Y7
	VMOVUPS BZ_(AX), Y8
	VSUBPS Y0, Y6, Y6
	VSUBPS Y1, Y7, Y7
	VSUBPS Y2, Y8, Y8
	VMOVUPS CX_(AX), Y9
	VMOVUPS CY_(AX), Y10
	VMOVUPS CZ_(AX), Y11
	VSUBPS Y0, Y9, Y9
	VSUBPS Y1, Y10, Y10
	VSUBPS Y2, Y11, Y11

	// Edge 1-2: e1 = e2 - e0 in Y12..Y14, b = a - e0 made when needed.
	VSUBPS Y6, Y9, Y12
	VSUBPS Y7, Y10, Y13
	VSUBPS Y8, Y11, Y14
	DOT(Y12, Y13, Y14, Y12, Y13, Y14, Y1)
	VSUBPS Y6, Y3, Y0
	VMULPS Y0, Y12, Y15
	VSUBPS Y7, Y4, Y0
	VFMADD231PS Y0, Y13, Y15
	VSUBPS Y8, Y5, Y0
	VFMADD231PS Y0, Y14, Y15
	CLAMPED(Y1, Y15)
	VSUBPS Y6, Y3, Y1
	VFNMADD231PS Y0, Y12, Y1
	VMULPS Y1, Y1, Y1
	VSUBPS Y7, Y4, Y15
	VFNMADD231PS Y0, Y13, Y15
	VFMADD231PS Y15, Y15, Y1
	VSUBPS Y8, Y5, Y15
	VFNMADD231PS Y0, Y14, Y15
	VFMADD231PS Y15, Y15, Y1
	VMOVUPS Y1, (DI)

	// e0.e0, e2.e2, e0.a, e2.a
	DOT(Y6, Y7, Y8, Y6, Y7, Y8, Y12)
	DOT(Y9, Y10, Y11, Y9, Y10, Y11, Y13)
	DOT(Y6, Y7, Y8, Y3, Y4, Y5, Y14)
	DOT(Y9, Y10, Y11, Y3, Y4, Y5, Y15)

	// Edges 0-1 and 0-2.
	CLAMPED(Y12, Y14)
	RESIDUAL2(Y6, Y7, Y8)
	VMINPS (DI), Y1, Y1
	VMOVUPS Y1, (DI)
	CLAMPED(Y13, Y15)
	RESIDUAL2(Y9, Y10, Y11)
	VMINPS (DI), Y1, Y1
	VMOVUPS Y1, (DI)

	// The foot point: v in Y13, w in Y12, all bits of Y2 set where it lies outside.
	DOT(Y6, Y7, Y8, Y9, Y10, Y11, Y0)
	VMULPS Y12, Y13, Y1
	VFNMADD231PS Y0, Y0, Y1
	VMOVUPS one<>(SB), Y2
	VDIVPS Y1, Y2, Y1
	VMULPS Y13, Y14, Y13
	VFNMADD231PS Y0, Y15, Y13
	VMULPS Y12, Y15, Y12
	VFNMADD231PS Y0, Y14, Y12
	VMULPS Y1, Y13, Y13
	VMULPS Y1, Y12, Y12
	VMOVUPS one<>(SB), Y0
	VSUBPS Y13, Y0, Y0
	VSUBPS Y12, Y0, Y0
	VMINPS Y12, Y13, Y2
	VMINPS Y0, Y2, Y2
	VCMPPS $1, zero<>(SB), Y2, Y2
	LEFT(Y3, Y6, Y9, Y14)
	LEFT(Y4, Y7, Y10, Y15)
	VMULPS Y14, Y14, Y14
	VFMADD231PS Y15, Y15, Y14
	LEFT(Y5, Y8, Y11, Y15)
	VFMADD231PS Y15, Y15, Y14
	VORPS Y2, Y14, Y14
	VMINPS (DI), Y14, Y14
	VMOVUPS Y14, (DI)

	VMINPS (R13)(CX*1), Y14, Y14
	VMOVUPS Y14, (R13)(CX*1)

	ADDQ $32, DI
	ADDQ $4, R11
	ADDQ $4, SI
	CMPQ SI, DX
	JNE  next

	VZEROUPPER
	RET

// func leastAVX2(d2 *[fan]float32, m int, out *float32)
TEXT ·leastAVX2(SB), NOSPLIT, $0-24
	MOVQ d2+0(FP), SI
	MOVQ m+8(FP), DX
	MOVQ out+16(FP), DI

next:
	VMOVUPS (SI), Y0
	ACROSS(VMINPS, Y0, X0, Y1, X1)
	VSQRTSS X0, X0, X0
	VMOVSS X0, (DI)
	ADDQ $32, SI
	ADDQ $4, DI
	DECQ DX
	JNE  next

	VZEROUPPER
	RET

// func withinAVX2(d2 *[fan]float32, list, owner *int32, n int, slack, root *float32, place, who *int32) int
TEXT ·withinAVX2(SB), NOSPLIT, $0-72
	MOVQ d2+0(FP), BX
	MOVQ list+8(FP), SI
	MOVQ owner+16(FP), R12
	MOVQ n+24(FP), DX
	MOVQ slack+32(FP), R8
	MOVQ root+40(FP), R13
	MOVQ place+48(FP), DI
	MOVQ who+56(FP), R11
	LEAQ ·lanes(SB), R9
	XORQ R10, R10
	LEAQ (SI)(DX*4), DX

next:
	MOVLQSX (SI), AX
	MOVLQSX (R12), CX
	VPBROADCASTD (R12), Y6
	VMOVSS (R13)(CX*4), X0
	VADDSS (R8)(AX*4), X0, X1
	VMULSS X1, X1, X1
	VBROADCASTSS X1, Y1
	SHLL $3, AX
	VMOVD AX, X5
	VPBROADCASTD X5, Y5
	VMOVUPS (BX), Y3
	VCMPPS $2, Y1, Y3, Y3
	VMOVMSKPS Y3, CX
	VPMOVZXBD (R9)(CX*8), Y4
	VPADDD Y5, Y4, Y4
	VMOVDQU Y4, (DI)(R10*4)
	VMOVDQU Y6, (R11)(R10*4)
	POPCNTL CX, CX
	ADDQ CX, R10
	ADDQ $32, BX
	ADDQ $4, SI
	ADDQ $4, R12
	CMPQ SI, DX
	JNE  next
	MOVQ R10, ret+64(FP)
	VZEROUPPER
	RET

// EXTENT: least and greatest value of one axis in lane 0 of Y0 and Y1, stored; their difference in X1.
#define EXTENT(A, B, C, LO, HI) \
	VMOVUPS A(AX), Y0 \
	VMAXPS  B(AX), Y0, Y1 \
	VMINPS  B(AX), Y0, Y0 \
	VMAXPS  C(AX), Y1, Y1 \
	VMINPS  C(AX), Y0, Y0 \
	ACROSS(VMINPS, Y0, X0, Y2, X2) \
	ACROSS(VMAXPS, Y1, X1, Y2, X2) \
	VMOVSS X0, LO(DI) \
	VMOVSS X1, HI(DI) \
	VSUBSS X0, X1, X1

// PLAINDOT: OUT = A . B, nothing fused.
#define PLAINDOT(AX1, AY1, AZ1, BX1, BY1, BZ1, OUT) \
	VMULPS AX1, BX1, OUT \
	VMULPS AY1, BY1, Y0 \
	VADDPS Y0, OUT, OUT \
	VMULPS AZ1, BZ1, Y0 \
	VADDPS Y0, OUT, OUT

// func boundLeafAVX2(l *leaf, b *bounds)
TEXT ·boundLeafAVX2(SB), NOSPLIT, $0-16
	MOVQ l+0(FP), AX
	MOVQ b+8(FP), DI
	EXTENT(AX_, BX_, CX_, 0, 12)
	VMOVAPS X1, X15
	EXTENT(AY_, BY_, CY_, 4, 16)
	VADDSS X1, X15, X15
	EXTENT(AZ_, BZ_, CZ_, 8, 20)
	VADDSS X1, X15, X15

	VMOVUPS AX_(AX), Y0
	VMOVUPS AY_(AX), Y1
	VMOVUPS AZ_(AX), Y2
	VMOVUPS BX_(AX), Y3
	VMOVUPS BY_(AX), Y4
	VMOVUPS BZ_(AX), Y5
	VMOVUPS CX_(AX), Y6
	VMOVUPS CY_(AX), Y7
	VMOVUPS CZ_(AX), Y8
	VSUBPS Y0, Y3, Y3
	VSUBPS Y1, Y4, Y4
	VSUBPS Y2, Y5, Y5
	VSUBPS Y0, Y6, Y6
	VSUBPS Y1, Y7, Y7
	VSUBPS Y2, Y8, Y8
	PLAINDOT(Y3, Y4, Y5, Y3, Y4, Y5, Y9)
	PLAINDOT(Y6, Y7, Y8, Y6, Y7, Y8, Y10)
	PLAINDOT(Y3, Y4, Y5, Y6, Y7, Y8, Y11)
	VMULPS Y9, Y10, Y12             // prod
	VMULPS Y11, Y11, Y11
	VSUBPS Y11, Y12, Y11
	VMAXPS zero<>(SB), Y11, Y11     // den
	VMAXPS Y10, Y9, Y9
	VMAXPS tiny<>(SB), Y9, Y9
	VSQRTPS Y9, Y9                  // long
	VMAXPS tiny<>(SB), Y12, Y0
	VDIVPS Y0, Y11, Y0
	VSUBPS unit<>(SB), Y0, Y0
	VMAXPS unit<>(SB), Y0, Y0       // sin2
	VMULPS unit<>(SB), Y12, Y1
	VADDPS Y1, Y11, Y1
	VSQRTPS Y1, Y1
	VDIVPS Y9, Y1, Y1               // high
	VMULPS half<>(SB), Y1, Y1
	VMULPS unit<>(SB), Y9, Y2
	VDIVPS Y0, Y2, Y2
	VMINPS Y1, Y2, Y2
	ACROSS(VMAXPS, Y2, X2, Y3, X3)
	VMULSS unit<>(SB), X15, X15
	VADDSS X15, X2, X2
	VMOVSS X2, 24(DI)
	VZEROUPPER
	RET

// TURN: one axis W of one level: where the bit in Y3 is set, invert the lower bits (Y4) of X, in Y0,
// elsewhere exchange those of X and W.
#define TURN(W) \
	VPAND    Y3, W, Y5 \
	VPCMPEQD Y3, Y5, Y5 \
	VPAND    Y4, Y5, Y6 \
	VPANDN   Y4, Y5, Y5 \
	VPXOR    W, Y0, Y7 \
	VPAND    Y7, Y5, Y5 \
	VPXOR    Y6, Y0, Y0 \
	VPXOR    Y5, Y0, Y0 \
	VPXOR    Y5, W, W

#define PARITY(BY) \
	VPSRLD BY, Y3, Y4 \
	VPXOR  Y4, Y3, Y3

#define SPREADBY(BY, MASK) \
	VPSLLD BY, Y4, Y5 \
	VPOR   Y5, Y4, Y4 \
	VPAND  MASK<>(SB), Y4, Y4

// SPREAD: Y4 = the ten lowest bits of W, two zero bits between them.
#define SPREAD(W) \
	VPAND low10<>(SB), W, Y4 \
	SPREADBY($16, third1) \
	SPREADBY($8, third2) \
	SPREADBY($4, third3) \
	SPREADBY($2, third4)

// func hilbertAVX2(cell *[3][fan]uint32, code *[fan]uint64)
TEXT ·hilbertAVX2(SB), NOSPLIT, $0-16
	MOVQ cell+0(FP), AX
	MOVQ code+8(FP), DI
	VMOVDQU 0(AX), Y0
	VMOVDQU 32(AX), Y1
	VMOVDQU 64(AX), Y2
	VMOVDQU topbit<>(SB), Y3
	VPCMPEQD Y8, Y8, Y8
	VPADDD Y8, Y3, Y4
	MOVL $10, CX

level:
	VPAND    Y3, Y0, Y5
	VPCMPEQD Y3, Y5, Y5
	VPAND    Y4, Y5, Y5
	VPXOR    Y5, Y0, Y0
	TURN(Y1)
	TURN(Y2)
	VPSRLD $1, Y3, Y3
	VPSRLD $1, Y4, Y4
	DECL CX
	JNE  level

	VPXOR Y0, Y1, Y1
	VPXOR Y1, Y2, Y2
	VPSRLD $1, Y2, Y3
	PARITY($1)
	PARITY($2)
	PARITY($4)
	PARITY($8)
	VPXOR Y3, Y0, Y0
	VPXOR Y3, Y1, Y1
	VPXOR Y3, Y2, Y2

	// The ten lower levels in Y6, the top one in Y7.
	SPREAD(Y0)
	VPSLLD $2, Y4, Y6
	SPREAD(Y1)
	VPADDD Y4, Y4, Y4
	VPOR   Y4, Y6, Y6
	SPREAD(Y2)
	VPOR   Y4, Y6, Y6
	VPSRLD $10, Y0, Y0
	VPSRLD $10, Y1, Y1
	VPSRLD $10, Y2, Y2
	VPADDD Y0, Y0, Y0
	VPOR   Y1, Y0, Y0
	VPADDD Y0, Y0, Y0
	VPOR   Y2, Y0, Y7

	VPMOVZXDQ X7, Y0
	VPMOVZXDQ X6, Y1
	VPSLLQ $30, Y0, Y0
	VPOR   Y1, Y0, Y0
	VMOVDQU Y0, (DI)
	VEXTRACTI128 $1, Y7, X7
	VEXTRACTI128 $1, Y6, X6
	VPMOVZXDQ X7, Y0
	VPMOVZXDQ X6, Y1
	VPSLLQ $30, Y0, Y0
	VPOR   Y1, Y0, Y0
	VMOVDQU Y0, 32(DI)
	VZEROUPPER
	RET
