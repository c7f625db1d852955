"""The peer of `cargo bench --bench peer`: what a practitioner would script, a NumPy-vectorised
fundamental-harmonic Monte Carlo with and without flying capacitors. Needs NumPy."""
import numpy as np, time, sys
def sample(M,N,rng,Lr,Cr,Lm,n,R):
    u=lambda t:1+t*rng.uniform(-1,1,(M,N))
    return Lr*u(.05),Cr*u(.05),Lm*u(.10),n*u(.005),np.full((M,N),R)
def phase(V,f,Lr,Cr,Lm,n,R,Vo,kap):
    w=2*np.pi*f; C=1/(1/Cr+kap); X=w*Lr-1/(w*C); Xm=w*Lm
    Vp=4/np.pi*n*Vo; Vs=4/np.pi*V
    a=R*R+X*X; b=2*R*Vp*(1+X/Xm)-2*X*R*Vp/Xm; c=(Vp*(1+X/Xm))**2+(R*Vp/Xm)**2-Vs**2
    I=np.maximum((-b+np.sqrt(np.maximum(b*b-4*a*c,0)))/(2*a),0)
    Ip2=I*I+(Vp/Xm)**2
    return I,0.5*(Vp*I+R*Ip2),2/np.pi*n*I
def par(P,Vin,Vo,Io,N,f0):
    lo=np.full((P[0].shape[0],1),f0*0.95); hi=np.full_like(lo,f0*3)
    for _ in range(50):
        m=.5*(lo+hi); _,_,I=phase(Vin/N,m,*P,Vo,0.0); up=I.sum(1,keepdims=True)>Io
        lo=np.where(up,m,lo); hi=np.where(up,hi,m)
    return I
def fc(P,Vin,Vo,Io,N,f0,kap):
    M=P[0].shape[0]; u=np.concatenate([np.full((M,N),Vin/N),np.full((M,1),f0),np.full((M,1),Io*Vo/Vin)],1)
    sc=np.array([Vin/N]*N+[f0,Io*Vo/Vin])
    def F(u):
        I,Pin,Ik=phase(u[:,:N],u[:,N:N+1],*P,Vo,kap)
        return np.concatenate([Pin/u[:,:N]/(Io*Vo/Vin)-u[:,N+1:]/(Io*Vo/Vin),u[:,:N].sum(1,keepdims=True)/Vin-1,Ik.sum(1,keepdims=True)/Io-1],1),Ik
    for it in range(12):
        r,Ik=F(u); J=np.empty((M,N+2,N+2))
        for j in range(N+2):
            v=u.copy(); v[:,j]+=1e-6*sc[j]; J[:,:,j]=(F(v)[0]-r)/1e-6
        d=np.linalg.solve(J,-r[:,:,None])[:,:,0]
        d=np.clip(d,-0.1,0.1); u=u+d*sc
        if np.abs(r).max()<1e-9: break
    return Ik,np.abs(r).max(1)
if __name__=='__main__':
    M=int(sys.argv[1]) if len(sys.argv)>1 else 100000
    rng=np.random.default_rng(0);N=3
    t=time.time();P=sample(M,N,rng,4.56e-6,247e-9,22.8e-6,2.4,.03);t1=time.time()
    I=par(P,380.,48.,62.5,N,150e3);t2=time.time()
    kap=np.array([1,2,1])/50e-6
    J,r=fc(P,380.,48.,62.5,N,190e3,kap);t3=time.time()
    dev=lambda I:np.abs(I/I.mean(1,keepdims=True)-1).max(1)
    print('samples',M,'sampling %.2f par %.2f fc %.2f s -> %.0f samples/s'%(t1-t,t2-t1,t3-t2,M/(t3-t)),'med',np.median(dev(I)),np.median(dev(J)),'p95',np.quantile(dev(J),.95),'conv',(r<1e-8).mean())
